package audit_test

// open lists the rules that the planner does not keep yet, with the reason. The audit counts their findings without failing.
var open = map[string]string{}
