"""How a value is shown at a glance, where a notebook asks for it."""
