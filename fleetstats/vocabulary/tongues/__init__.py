"""Words of six languages for columns, endings, events and causes, from which a guess is made.

The reader of records takes none of them by itself: what they mean stands in the study file.
"""
