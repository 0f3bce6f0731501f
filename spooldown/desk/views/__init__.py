"""The screens of the desk, one module a subject: what each request shows or changes."""
