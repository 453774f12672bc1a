"""What was declared before the records were drawn: a chain of versions in `declared.json`."""

from fleetstats.study.declared.chain import DECLARED_FILE, Declaration, declared_in, read_declared
from fleetstats.study.declared.content import Declarable, declarable_of
from fleetstats.study.declared.declare import Declared, declare_study

__all__ = [
    "DECLARED_FILE",
    "Declarable",
    "Declaration",
    "Declared",
    "declarable_of",
    "declare_study",
    "declared_in",
    "read_declared",
]
