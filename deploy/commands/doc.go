// Package commands is what the program's commands do, one file a command. It stands with main above all layers: it alone opens the
// store and puts it, what answers and what works without being asked together (service.go).
package commands
