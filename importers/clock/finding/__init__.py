"""Which columns may be a clock: by what their headings say of time, and by what their cells hold."""
