"""Two practice clips of our own making, and what is true of them."""
