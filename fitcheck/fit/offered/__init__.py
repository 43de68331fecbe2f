"""Places, boards and lower positions that would work, each judged like the given one."""
