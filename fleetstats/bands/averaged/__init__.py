"""What may come, averaged over laws of life: cells, laws, their evidence, curves drawn from all."""
