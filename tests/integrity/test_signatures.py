"""Signatures over a bundle's list: who may say "unaltered", and what a wrong one comes to.

The form is SSHSIG (OpenSSH, PROTOCOL.sshsig) over Ed25519 (RFC 8032); where ssh-keygen is there it
is asked for its opinion, byte by byte. Keys are made here, for each run anew.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest
from click.testing import CliRunner, Result
from cryptography.hazmat.primitives import serialization as s
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from tampered import LIVES, STUDY, Bundle

from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.core.fenced import Fenced
from fleetstats.report.bundle import guarded
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.keys import key_of_line, read_public_keys, read_signing_key
from fleetstats.report.bundle.pack import LIST, list_text, write_bundle, zip_of
from fleetstats.report.bundle.seal import (
    HASH,
    NAMESPACE,
    SIGNATURE,
    judge_seal,
    read_signature,
    sign_list,
)
from fleetstats.report.bundle.unpack import unpack_bundle
from fleetstats.report.bundle.verify import verify_bundle
from fleetstats.study.study import read_study

WORD = "open, please"
HEAD = b"-----BEGIN SSH SIGNATURE-----"
WRONG = ("empty", "garbage", "half", "of other bytes", "spaces", "two", "other lines",
         "a line more", "ends of lines", "long", "one letter")  # fmt: skip


class Made(NamedTuple):
    """A signed bundle, an unsigned one, and the folder with the keys and the study."""

    signed: Path
    unsigned: Path
    place: Path


def write_key(path: Path, key: object, word: bytes | None = None, comment: str = "") -> Path:
    lock = s.BestAvailableEncryption(word) if word else s.NoEncryption()
    path.write_bytes(key.private_bytes(s.Encoding.PEM, s.PrivateFormat.OpenSSH, lock))
    path.chmod(0o600)
    public = key.public_key().public_bytes(s.Encoding.OpenSSH, s.PublicFormat.OpenSSH).decode()
    path.with_name(f"{path.name}.pub").write_text(f"{public} {comment}\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def quick():
    """Stand in for the whole study: a report that follows from the records' bytes."""

    def run(study, name, *, versions=None):
        results = json.dumps({"size": float(study.files[0].path.stat().st_size), "name": name})
        return None, {"results.json": results.encode(), "report.html": b"<p>page"}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify_module, "report_members", run)
        # the child would run the study itself; what is handed to it is another test's
        patch.setattr(guarded, "verify_guarded", lambda path, **how: Fenced(
            result=verify_module.verify_bundle(path, **how), not_held=()))  # fmt: skip
        yield


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, quick: None) -> Made:
    place = tmp_path_factory.mktemp("signed")
    (place / "six").mkdir()
    (place / "six/study.toml").write_text(STUDY, encoding="utf-8")
    (place / "six/lives.csv").write_text(LIVES, encoding="utf-8")
    write_key(place / "desk", Ed25519PrivateKey.generate(), comment="desk of\x1b[2J a club")
    write_key(place / "other", Ed25519PrivateKey.generate())
    write_key(place / "locked", Ed25519PrivateKey.generate(), WORD.encode())
    write_key(place / "rsa", rsa.generate_private_key(65537, 2048))
    write_key(place / "ecdsa", ec.generate_private_key(ec.SECP256R1()))
    study = read_study(place / "six")
    _, report = verify_module.report_members(study, "six")
    members = {f"study/{n}": (place / "six" / n).read_bytes() for n in ("study.toml", "lives.csv")}
    members |= {f"report/{k}": v for k, v in report.items()}
    key = read_signing_key(place / "desk", lambda: "")
    for name, sign in (("signed.zip", key), ("unsigned.zip", None)):
        write_bundle(members, place / name, name="six", seed=11, sign=sign)
    return Made(place / "signed.zip", place / "unsigned.zip", place)


def verify(*args: object) -> Result:
    return CliRunner().invoke(main, ["verify", *map(str, args)])


def test_only_a_good_signature_by_the_key_given_makes_it_unaltered(made: Made) -> None:
    by = made.place / "desk.pub"
    run = verify(made.signed, "--by", by)
    assert (run.exit_code, run.output.split(":")[0]) == (0, "Unaltered")
    shown = read_public_keys(by)[0].fingerprint
    assert f"Signed by the key {shown} (“desk of\\x1b[2J a club” in its key file)" in run.output
    bare = verify(made.signed)
    assert (bare.exit_code, bare.output.split(";")[0]) == (0, "Agrees with itself")
    assert f"signature by the key {shown}; whether you trust that key is yours" in bare.output
    assert "naltered" not in bare.output


def test_inside_and_beside_is_the_same_signature_and_either_is_enough(made: Made) -> None:
    beside = made.signed.with_name("signed.zip.sig")
    assert unpack_bundle(made.signed).signature == beside.read_bytes()
    assert SIGNATURE not in unpack_bundle(made.signed).listed["files"]
    run = verify(made.unsigned, "--by", made.place / "desk.pub", "--signature", beside)
    assert (run.exit_code, "Unaltered" in run.output) == (0, True)
    assert unpack_bundle(made.unsigned).digest == unpack_bundle(made.signed).digest


@pytest.mark.parametrize("bundle", ["unsigned", "signed"])
def test_no_signature_by_the_key_given_is_not_vouched_for(bundle: str, made: Made) -> None:
    run = verify(getattr(made, bundle), "--by", made.place / "other.pub")
    assert (run.exit_code, run.output.split(":")[0]) == (1, "NOT VOUCHED FOR")
    told = {"unsigned": "It bears no signature", "signed": "which is none of those given"}
    assert told[bundle] in run.output
    digest = unpack_bundle(made.signed).digest  # a digest does not stand in for the key asked for
    found = verify_bundle(
        getattr(made, bundle), expect=digest, by=read_public_keys(made.place / "other.pub")
    )
    assert (found.verdict, found.good) == ("not-vouched", False)


def test_a_changed_input_under_a_list_written_anew_keeps_no_signature(made: Made) -> None:
    """The forger writes results and list anew; only the signature still speaks of the old list."""
    b = Bundle.read(made.signed)
    signature = b.members.pop(SIGNATURE)
    b.swap("study/lives.csv", "SN-79,300,700,failed", "SN-79,300,7000,failed")
    b.members["report/results.json"] = json.dumps({"size": float(len(b.members["study/lives.csv"])),
                                                   "name": "six"}).encode()  # fmt: skip
    b.list_again()
    path = made.place / "forged.zip"
    path.write_bytes(zip_of(list_text(b.listed), b.members, signature))
    for by in ((), ("--by", made.place / "desk.pub")):
        run = verify(path, *by)
        assert (run.exit_code, run.output.split(":")[0]) == (1, "ALTERED")
        assert "bundle.sig is no signature of this list by the key that it names" in run.output
    # signed anew by the forger's own key it agrees with itself, and is told from the right key
    other = read_signing_key(made.place / "other", lambda: "")
    text = list_text(b.listed)
    path.write_bytes(zip_of(text, b.members, sign_list(text, other)))
    assert verify_bundle(path).verdict == "agrees"
    by = read_public_keys(made.place / "desk.pub")
    assert verify_bundle(path, by=by).verdict == "not-vouched"
    beside = ("signed.zip.sig", (made.place / "signed.zip.sig").read_bytes())
    assert verify_bundle(path, by=by, signature=beside).verdict == "altered"


def spoiled(data: bytes, text: bytes, made: Made) -> dict[str, bytes]:
    """Return wrong signatures by what is wrong with them."""
    raw = read_signing_key(made.place / "desk", lambda: "")
    half = data[: len(data) // 2]
    return {
        "empty": b"",
        "garbage": b"\x00\xff" * 40,
        "half": half,
        "of other bytes": sign_list(text + b" ", raw),
        "spaces": data.replace(b"\n", b" \n", 2),
        "two": data + data,
        "other lines": HEAD + b"\n" + data[len(HEAD) :].replace(b"\n", b"", 2),
        "a line more": data + b"\n",
        "ends of lines": data.replace(b"\n", b"\r\n"),
        "long": data + b"\n" * 20_000,
        "one letter": data.replace(b"AAAA", b"AAAB", 1),
    }


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_signature_inside_is_altered_whoever_asks(case: str, made: Made) -> None:
    bundle = unpack_bundle(made.signed)
    assert bundle.signature is not None
    wrong = spoiled(bundle.signature, bundle.list_text, made)[case]
    path = made.place / "wrong.zip"
    path.write_bytes(zip_of(bundle.list_text, bundle.members, wrong))
    for by in (None, read_public_keys(made.place / "desk.pub")):
        assert verify_bundle(path, by=by).verdict == "altered"
        assert verify_bundle(path, by=by, expect=bundle.digest).verdict == "altered"


def test_a_detached_signature_may_have_come_by_another_system(made: Made) -> None:
    beside = made.place / "windows.sig"
    data = made.signed.with_name("signed.zip.sig").read_bytes()
    beside.write_bytes(data.replace(b"\n", b"\r\n") + b"\r\n")
    by = read_public_keys(made.place / "desk.pub")
    found = verify_bundle(made.unsigned, by=by, signature=("x", read_signature(beside)))
    assert found.verdict == "unaltered"


def test_a_signature_for_another_purpose_does_not_fit(
    made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = unpack_bundle(made.signed).list_text
    key = read_signing_key(made.place / "desk", lambda: "")
    monkeypatch.setattr("fleetstats.report.bundle.seal.NAMESPACE", "file")
    data = sign_list(text, key)
    monkeypatch.undo()
    seal = judge_seal(data, text, where="x", by=(key.public,))
    assert (seal.state, seal.vouches) == ("bad", False)
    assert "another purpose" in seal.why


def test_wrong_usage_ends_with_two_and_says_what_is_right(made: Made) -> None:
    text = made.place / "six/lives.csv"
    for args, told in (
        (("--by", made.place / "rsa.pub"), "'ssh-ed25519 AAAA… comment'"),
        (("--by", made.place / "ecdsa.pub"), "holds no key of that kind"),
        (("--by", made.place / "desk"), "'desk' is a private key; verifying takes the public one"),
        (("--by", text), "line 1 is no key"),
        (("--by", made.place / "none.pub"), "cannot be read"),
        (("--signature", text), "holds no signature in OpenSSH's form"),
        (("--signature", made.place / "none"), "cannot be read"),
    ):
        run = verify(made.signed, *args)
        assert (run.exit_code, told in run.output) == (2, True), run.output


@pytest.mark.parametrize(
    ("file", "told"),
    [
        ("rsa", "a key of another kind than Ed25519"),
        ("ecdsa", "a key of another kind than Ed25519"),
        ("desk.pub", "'desk.pub' is a public key; signing needs the private one"),
        ("six/lives.csv", "is no OpenSSH private key"),
        ("none", "cannot be read"),
        ("cut", "is damaged"),
        ("locked", "The passphrase does not open the key file 'locked'"),
    ],
)
def test_keys_that_cannot_sign_are_told_by_name(file: str, told: str, made: Made) -> None:
    desk = (made.place / "desk").read_bytes()
    (made.place / "cut").write_bytes(desk[: len(desk) // 2])
    with pytest.raises(SettingError, match=told.replace(".", r"\.")):
        read_signing_key(made.place / file, lambda: "wrong")
    out = made.place / f"no-{Path(file).name}.zip"
    word = made.place / "wrong-word"
    word.write_text("wrong\n", encoding="utf-8")
    args = ["--out", out, "--sign", made.place / file, "--passphrase-file", word]
    run = CliRunner().invoke(main, ["bundle", str(made.place / "six"), *map(str, args)])
    assert (run.exit_code, out.exists()) == (2, False)


def test_a_locked_key_is_opened_by_prompt_or_file(
    made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fleetstats.cli.evidence.keys import key_to_sign

    word = made.place / "word"
    word.write_text(f"{WORD}\r\nnot this\n", encoding="utf-8")
    from_file = key_to_sign(made.place / "locked", word)
    asked: list[str] = []
    monkeypatch.setattr("click.prompt", lambda text, **more: asked.append(text) or WORD)
    from_prompt = key_to_sign(made.place / "locked", None)
    assert from_file.public == from_prompt.public == read_public_keys(made.place / "locked.pub")[0]
    key_to_sign(made.place / "desk", None)  # a key without a lock asks for nothing
    assert asked == ["Passphrase of locked"]
    assert WORD not in repr(from_file)


def test_a_list_of_keys_may_hold_names_notes_and_other_kinds(made: Made) -> None:
    lines = [
        (made.place / f"{n}.pub").read_text(encoding="utf-8") for n in ("rsa", "other", "desk")
    ]
    listed = made.place / "trusted"
    listed.write_text(
        "# keys of the association\n\n" + lines[0] + "someone@club " + lines[1] + lines[2],
        encoding="utf-8",
    )
    keys = read_public_keys(listed)
    assert len(keys) == 2
    found = verify_bundle(made.signed, by=keys)
    assert (found.verdict, [x.key for x in found.seals]) == ("unaltered", [keys[1].fingerprint])
    with pytest.raises(ValueError, match="conditions"):
        key_of_line('x valid-before="20200101" ' + lines[2])
    with pytest.raises(ValueError, match="damaged"):
        key_of_line("ssh-ed25519 A*A")
    with pytest.raises(ValueError, match="another key"):
        key_of_line("ssh-ed25519 AAAA")


def test_nothing_of_the_private_key_goes_into_the_bundle(made: Made) -> None:
    key = read_signing_key(made.place / "desk", lambda: "")
    raw = key._key.private_bytes_raw()
    for data in (*unpack_bundle(made.signed).members.values(), made.signed.read_bytes(),
                 (made.place / "signed.zip.sig").read_bytes()):  # fmt: skip
        assert raw not in data
        assert b"PRIVATE" not in data


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not installed")
def test_ssh_keygen_writes_the_same_bytes_and_verifies_ours(made: Made, tmp_path: Path) -> None:
    text = unpack_bundle(made.signed).list_text
    for name in (LIST, "other"):
        (tmp_path / name).write_bytes(text)
    subprocess.run(["ssh-keygen", "-Y", "sign", "-f", made.place / "desk", "-n", NAMESPACE,
                    "-O", f"hashalg={HASH}", tmp_path / LIST],
                   check=True, capture_output=True)  # fmt: skip
    ours = made.signed.with_name("signed.zip.sig")
    assert read_signature(tmp_path / f"{LIST}.sig") == ours.read_bytes()
    subprocess.run(["ssh-keygen", "-Y", "sign", "-f", made.place / "desk", "-n", NAMESPACE,
                    "-O", "hashalg=sha256", tmp_path / "other"],
                   check=True, capture_output=True)  # fmt: skip
    key = read_public_keys(made.place / "desk.pub")
    theirs = judge_seal(read_signature(tmp_path / "other.sig"), text, where="x", by=key)
    assert theirs.vouches
    public = (made.place / "desk.pub").read_text(encoding="utf-8").split()
    (tmp_path / "allowed").write_text(f"desk {public[0]} {public[1]}\n", encoding="utf-8")
    ask = ["ssh-keygen", "-Y", "verify", "-f", str(tmp_path / "allowed"), "-I", "desk", "-n",
           NAMESPACE, "-s", str(ours)]  # fmt: skip
    assert subprocess.run(ask, input=text, capture_output=True, check=False).returncode == 0
    assert subprocess.run(ask, input=text + b" ", capture_output=True, check=False).returncode != 0
    shown = subprocess.run(["ssh-keygen", "-l", "-f", made.place / "desk.pub"],
                            check=True, capture_output=True, text=True).stdout  # fmt: skip
    assert read_public_keys(made.place / "desk.pub")[0].fingerprint in shown
