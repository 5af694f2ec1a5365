"""What a person or a program enters, whichever way it comes: checked once, and made an entry."""
