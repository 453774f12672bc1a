"""The row engine: a schema says what a cell means, and one reader applies it to every shape."""
