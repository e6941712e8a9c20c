package models

import "time"

// Reasons why nothing can be saved, the detail of a CodeStorage error.
const (
	StorageFull        = "full"        // the disk is
	StorageLocked      = "locked"      // another program holds the database
	StorageReadOnly    = "read_only"   // the file or its directory cannot be written
	StorageFailing     = "failing"     // the disk reports errors, or the file is gone
	StorageBusy        = "busy"        // others change the same; it is over at once
	StorageUnreachable = "unreachable" // the database server
)

// LittleDisk is the free disk, in bytes, below which an operator is warned.
const LittleDisk = 256 << 20

// StorageRetry is when to try again after a CodeStorage error.
const StorageRetry = 30 * time.Second

// storageDetails are what a caller is told.
var storageDetails = map[string]string{
	StorageFull:        "the disk is full; nothing was saved",
	StorageLocked:      "the database is locked by another program; nothing was saved",
	StorageReadOnly:    "the database is read-only; nothing was saved",
	StorageFailing:     "the disk reports errors; nothing was saved",
	StorageBusy:        "others were changing the same; nothing was saved: try again",
	StorageUnreachable: "the database server cannot be reached; nothing was saved",
}

// StorageError returns the CodeStorage error for a reason.
func StorageError(reason string) *Error { return Errorf(CodeStorage, "%s", storageDetails[reason]) }

// StorageState is how the storage stands.
type StorageState struct {
	Problem   string // one of the reasons above; "": everything is saved
	FreeBytes int64  // of the database's disk; -1: not known
}
