"""Work spread over the processes of one machine, and what each of them loads and holds."""
