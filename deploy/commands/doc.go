// Package commands implements the program's commands, one file each. With main it is above all other layers: only it opens the
// store and wires it to the HTTP server and the jobs (service.go).
package commands
