"""One module to a chapter: turns a chapter's result into a Section of the report."""
