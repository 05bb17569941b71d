"""What is asked: the case file read, checked and expanded to plain panels."""
