"""Many jobs bought together: jobs as lots, the plan for all of them, what it saved and who pays which share."""
