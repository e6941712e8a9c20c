package models

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
)

// Code classifies an Error. Each is a stable problem type (RFC 9457), "/problems/<code>". Only Status maps codes to HTTP statuses.
type Code string

// The codes.
const (
	CodeMalformed    Code = "malformed"             // the body cannot be read: not JSON, unknown field, wrong type (400)
	CodeInvalid      Code = "invalid"               // validation failed; see Fields (422)
	CodeUnauthorised Code = "unauthorised"          // no valid token or session (401)
	CodeForbidden    Code = "forbidden"             // not within the token's scope (403)
	CodeNotFound     Code = "not_found"             // does not exist, or belongs to another site (404)
	CodeConflict     Code = "conflict"              // conflicts with stored data (409)
	CodeLimitReached Code = "limit_reached"         // there are as many of these as there can be (409)
	CodePrecondition Code = "precondition_failed"   // If-Match names another version (412)
	CodeTooLarge     Code = "too_large"             // body or batch over the limit (413)
	CodeNeedsMatch   Code = "precondition_required" // changing an existing document needs If-Match (428)
	CodeTooMany      Code = "too_many_requests"     // rate limit exceeded (429)
	CodeBusy         Code = "busy"                  // others use all of something that requests share; try again (503)
	CodeStorage      Code = "storage"               // the disk is full or the database locked; the detail says which (503)
	CodeInternal     Code = "internal"              // server error (500)
)

// Status returns the HTTP status of the code, 500 for an unknown one.
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
	case CodeConflict, CodeLimitReached:
		return http.StatusConflict
	case CodePrecondition:
		return http.StatusPreconditionFailed
	case CodeTooLarge:
		return http.StatusRequestEntityTooLarge
	case CodeNeedsMatch:
		return http.StatusPreconditionRequired
	case CodeTooMany:
		return http.StatusTooManyRequests
	case CodeStorage, CodeBusy:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// FieldError is one fault in a document.
type FieldError struct {
	Pointer  string `json:"pointer"`            // JSON pointer (RFC 6901) of the bad field, "" for the whole document
	Detail   string `json:"detail"`             // the fault, for a person
	Accepted string `json:"accepted,omitempty"` // acceptable values

	// Rule is a general rule that is broken, for pages, which have words of their own: "missing", or a tag of the validator such as "gte"
	// with its parameter in Limit; with "list_" or "text_" before it for the length of a list or text. Empty: a rule of this field.
	Rule  string `json:"-"`
	Limit string `json:"-"`
}

// RuleMissing is the rule of a field that is missing.
const RuleMissing = "missing"

// Error is the error type for anything wrong with a request; other errors are the server's.
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

// Errorf returns an Error without fields.
func Errorf(code Code, format string, args ...any) *Error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...)}
}

// invalidMessage is the message of validation errors; their fields give the details.
const invalidMessage = "the document is not valid"

// Invalid returns a CodeInvalid error for one field.
func Invalid(pointer, accepted, format string, args ...any) *Error {
	return &Error{Code: CodeInvalid, Message: invalidMessage,
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

// ProblemOf converts err to a problem document without a status, which the HTTP layer adds.
func ProblemOf(err error) Problem {
	var e *Error
	if !errors.As(err, &e) {
		return Problem{Type: "/problems/" + string(CodeInternal), Title: "Something went wrong on our side"}
	}
	return Problem{Type: "/problems/" + string(e.Code), Title: titles[e.Code], Detail: e.Message, Errors: e.Fields}
}

// Codes are all codes, in alphabetical order.
func Codes() []Code { return slices.Sorted(maps.Keys(titles)) }

var titles = map[Code]string{
	CodeMalformed: "The document cannot be read", CodeInvalid: "The document is not valid",
	CodeUnauthorised: "Sign in or send a token", CodeForbidden: "This token does not allow that",
	CodeNotFound: "Not found", CodeConflict: "Conflict with stored data", CodeLimitReached: "There can't be more of these",
	CodePrecondition: "The document has changed since you read it", CodeTooLarge: "Request too large",
	CodeNeedsMatch: "If-Match is required", CodeTooMany: "Too many requests", CodeBusy: "The service is busy", CodeStorage: "Nothing can be saved at the moment", CodeInternal: "Something went wrong on our side",
}
