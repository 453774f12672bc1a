"""The bytes of delimited texts, before they are cells."""
