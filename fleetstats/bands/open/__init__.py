"""The bound over all shapes that the records leave open."""
