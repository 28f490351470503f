"""A season of serves without film for the demo, drawn from the spread that sample_clips/season.json writes down."""
