"""What raw files most likely mean: columns, shape, words, ways of writing; guesses, never facts."""
