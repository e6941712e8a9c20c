package models

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
)

// Code says what kind of mistake an Error is. Status maps the codes to HTTP statuses, nothing else does,
// and each code is a stable problem type (RFC 9457): "/problems/<code>".
type Code string

// The codes.
const (
	CodeMalformed    Code = "malformed"             // the body cannot be read: not JSON, unknown field, wrong type (400)
	CodeInvalid      Code = "invalid"               // a rule is broken; Fields say which (422)
	CodeUnauthorised Code = "unauthorised"          // no valid token or session (401)
	CodeForbidden    Code = "forbidden"             // the token's scope does not reach this (403)
	CodeNotFound     Code = "not_found"             // no such thing, or another site's (404)
	CodeConflict     Code = "conflict"              // clashes with what is stored (409)
	CodePrecondition Code = "precondition_failed"   // If-Match names another version (412)
	CodeTooLarge     Code = "too_large"             // body or batch over the limit (413)
	CodeNeedsMatch   Code = "precondition_required" // changing an existing document needs If-Match (428)
	CodeTooMany      Code = "too_many_requests"     // slow down (429)
	CodeInternal     Code = "internal"              // our fault (500)
)

// Status is the HTTP status of the code, 500 for one that is not known.
func (c Code) Status() int {
	switch c {
	case CodeMalformed:
		return http.StatusBadRequest
	case CodeInvalid:
		return http.StatusUnprocessableEntity
	case CodeUnauthorised:
		return http.StatusUnauthorized
	case CodeForbidden:
		return http.StatusForbidden
	case CodeNotFound:
		return http.StatusNotFound
	case CodeConflict:
		return http.StatusConflict
	case CodePrecondition:
		return http.StatusPreconditionFailed
	case CodeTooLarge:
		return http.StatusRequestEntityTooLarge
	case CodeNeedsMatch:
		return http.StatusPreconditionRequired
	case CodeTooMany:
		return http.StatusTooManyRequests
	}
	return http.StatusInternalServerError
}

// FieldError is one thing wrong in a document.
type FieldError struct {
	Pointer  string `json:"pointer"`            // JSON pointer (RFC 6901) of the bad field, "" for the whole document
	Detail   string `json:"detail"`             // what is wrong, for a person
	Accepted string `json:"accepted,omitempty"` // what would be right
}

// Error is the one error type for what a person, or a program of theirs, did wrong.
type Error struct {
	Code    Code
	Message string
	Fields  []FieldError
}

// Error joins the message and the fields into one line.
func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return e.Message
	}
	parts := make([]string, 0, len(e.Fields))
	for _, f := range e.Fields {
		s := f.Pointer + ": " + f.Detail
		if f.Accepted != "" {
			s += " (accepted: " + f.Accepted + ")"
		}
		parts = append(parts, s)
	}
	return e.Message + ": " + strings.Join(parts, "; ")
}

// Errorf makes an Error without fields.
func Errorf(code Code, format string, args ...any) *Error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...)}
}

// Invalid makes a CodeInvalid error for one field.
func Invalid(pointer, accepted, format string, args ...any) *Error {
	return &Error{Code: CodeInvalid, Message: "the document breaks a rule",
		Fields: []FieldError{{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted}}}
}

// CodeOf returns the code of the first *Error in err's chain, CodeInternal for any other error, "" for nil.
func CodeOf(err error) Code {
	if err == nil {
		return ""
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return CodeInternal
}

// Problem is an RFC 9457 problem document.
type Problem struct {
	Type   string       `json:"type"`
	Title  string       `json:"title"`
	Status int          `json:"status,omitempty"`
	Detail string       `json:"detail,omitempty"`
	Errors []FieldError `json:"errors,omitempty"`
}

// ProblemOf turns err into a problem document without a status; the HTTP layer fills that in.
func ProblemOf(err error) Problem {
	var e *Error
	if !errors.As(err, &e) {
		return Problem{Type: "/problems/" + string(CodeInternal), Title: "Something went wrong on our side"}
	}
	return Problem{Type: "/problems/" + string(e.Code), Title: titles[e.Code], Detail: e.Message, Errors: e.Fields}
}

var titles = map[Code]string{
	CodeMalformed: "The document cannot be read", CodeInvalid: "The document breaks a rule",
	CodeUnauthorised: "Sign in or send a token", CodeForbidden: "This token may not do that",
	CodeNotFound: "There is no such thing here", CodeConflict: "This clashes with what is stored",
	CodePrecondition: "The document has changed meanwhile", CodeTooLarge: "Too much at once",
	CodeNeedsMatch: "Say which version you change", CodeTooMany: "Too many requests", CodeInternal: "Something went wrong on our side",
}
