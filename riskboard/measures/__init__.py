"""What is computed from a worksheet: pure functions by field of knowledge, and the registry that names them."""
