"""A room as a page: its template, its words, and the frame that all rooms share."""

from __future__ import annotations

import functools
from importlib import resources
from typing import TYPE_CHECKING, Any

from fleetstats.advice.advice import say_word
from fleetstats.desk.guards import Keys
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.rooms import ROOMS
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words, words_of
from fleetstats.spells.trouble.values import PLACES
from fleetstats.vocabulary.wording import at_most, chance, count

if TYPE_CHECKING:
    import jinja2

ACTS_SHOWN = 8
MOST_TROUBLE = 60
TONES = ("done", "wrong", "conflict")


def _read(name: str) -> str:
    return (resources.files("fleetstats.desk") / "templates" / name).read_text("utf-8")


@functools.cache
def _environment() -> jinja2.Environment:
    import jinja2

    env = jinja2.Environment(
        loader=jinja2.FunctionLoader(_read),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["with_"] = lambda sentence, **told: sentence.format(**told)
    env.globals |= {
        "count": count,
        "at_most": at_most,
        "chance": chance,
        "say_state": lambda s: say_word(s.state, extrapolated=s.extrapolated),
    }
    return env


def render_page(place: DeskPlace, keys: Keys, room: str, form: Sent) -> str:
    """Return a room as a page, at what its address says is tried there."""
    shown = ROOMS[room].show(place, form)
    now = place.reader.stand()
    return _environment().get_template(f"{room}.html.j2").render(
        **shown, **_frame(place, keys, now), room=room, w=words_of(room),
        said=form.text("said"), tone=form.text("tone") if form.text("tone") in TONES else "done",
    )  # fmt: skip


def _frame(place: DeskPlace, keys: Keys, now: Standing) -> dict[str, Any]:
    """Return what stands around every room: the way between rooms, trouble, acts, what is wrong."""
    acts = place.desk.acts
    trouble = now.trouble
    return {
        "f": words_of("frame"),
        "rooms": [(name, words(name, "name")) for name in ROOMS],
        "folder": place.desk.folder.name,
        "title": now.study.settings.study.title if now.study else place.desk.folder.name,
        "version": now.version,
        "form_key": keys.form,
        "has_study": now.study is not None,
        "wrong": now.wrong,
        "halted": now.broken,
        "trouble": trouble,
        "trouble_rows": () if trouble is None else trouble.rows[:MOST_TROUBLE],
        "n_open": now.n_open,
        "left_out": now.left_out,
        "places": PLACES,
        "acts": acts[: -ACTS_SHOWN - 1 : -1],
        "may_undo": bool(acts) and acts[-1].made == now.version,
    }


def render_refusal(status: int) -> bytes:
    """Return the page of a request that is not answered; status 0: the desk was closed."""
    told = words_of("refusals")
    page = (
        _environment()
        .get_template("refusal.html.j2")
        .render(status=status, title=told[f"title_{status}"], text=told[f"text_{status}"])
    )
    return page.encode("utf-8")
