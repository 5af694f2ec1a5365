"""[pure] What a maker keeps records of, from vessels and formulas to testers and trials."""
