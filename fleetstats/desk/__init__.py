"""The desk: a study's folder in a browser, on the user's own machine.

The folder is the state. Every act edits `study.toml` or adds a file, as a person with an editor of
texts would, so that the page and the prompt may be used in turn. Nothing is sent anywhere: the
server listens on the loopback address alone, and its pages load nothing from outside.
"""
