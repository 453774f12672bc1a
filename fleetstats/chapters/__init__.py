"""Everything of one question in one room: values, computation, words, section."""
