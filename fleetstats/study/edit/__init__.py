"""Edits of a study file that leave every other line as its author wrote it."""

from fleetstats.study.edit.keys import add_file, copy_file, remove_file, set_key, unset_key

__all__ = ["add_file", "copy_file", "remove_file", "set_key", "unset_key"]
