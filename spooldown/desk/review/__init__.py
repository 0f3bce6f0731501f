"""Looking at dropped logs before anything is kept: layouts, what each answer would mean, two files on one clock."""
