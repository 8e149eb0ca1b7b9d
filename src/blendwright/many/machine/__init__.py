"""The slowest loops of a block in machine code (numba, extra `batch`)."""
