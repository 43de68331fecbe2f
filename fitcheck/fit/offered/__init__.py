"""Places, boards and lower stands that would do, each judged like the one given."""
