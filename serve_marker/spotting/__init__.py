"""From film to proposed serves: candidates, tracks, flights, serves, and how sure each of them is."""
