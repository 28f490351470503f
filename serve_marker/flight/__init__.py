"""The ball in the air: pace between contact and landing."""
