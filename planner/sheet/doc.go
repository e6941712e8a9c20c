// Package sheet turns a plan into what people follow: the prep sheets of its days with their tasks (prepsheet.go), laid
// out so that the people on shift can do them (arrange.go, layout.go), the rest of a day moved when they are behind (delay.go), the
// changes from one plan or sheet to the next (changes.go), and both as text for a terminal (text.go).
//
// A task keeps its id across revisions, so that marks on it stay valid (ids.go). Its texts are in the site's language; whatever a
// program needs to know about it is in its fields.
package sheet
