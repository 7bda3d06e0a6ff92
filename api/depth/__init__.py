"""What is asked after a plan, over HTTP: its requests, and its answers in the forms in which they leave."""
