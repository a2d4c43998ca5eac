"""What each column of a log is: the roles that the rest of the program asks for, and how they are recognised."""
