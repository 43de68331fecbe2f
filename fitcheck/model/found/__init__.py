"""Results of the stages, one file per stage."""
