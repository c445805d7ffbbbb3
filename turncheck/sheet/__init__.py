"""What a user wrote: the sheet, its vocabulary and its landmark table, read and checked once."""
