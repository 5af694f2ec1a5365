"""[pure] What the burns of a trial say: criteria, verdict, what is missing, what to do next."""
