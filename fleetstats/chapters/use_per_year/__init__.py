"""How much engines are flown in a year, and which clock each cause follows."""
