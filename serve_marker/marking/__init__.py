"""From a click to a landing, and from a landing to its verdict."""
