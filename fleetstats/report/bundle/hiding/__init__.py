"""Names replaced, figures coarsened: one room for what a pseudonymous bundle does to each cell."""
