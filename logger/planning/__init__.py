"""[pure] Who burns what, where and when: a plan that one person can carry out."""
