"""What repeated looks at growing records do to a verdict, and how its error is held."""
