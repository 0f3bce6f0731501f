"""What a column is: the words of its heading and its unit, in several languages."""
