"""What the stages find, a file a stage."""
