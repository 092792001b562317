"""Pages to print for who builds the box, who stands before it, and who looks after the PA."""
