"""Which files a [[records]] of a study means: patterns, and copies of what lies elsewhere."""
