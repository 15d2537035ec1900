"""The crew planner: plain data in, a plan that has been checked out."""
