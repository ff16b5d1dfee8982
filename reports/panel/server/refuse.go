package server

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"
)

// wantsPage tells a browser's navigation from a call of the page's script.
func wantsPage(r *http.Request) bool { return strings.Contains(r.Header.Get("Accept"), "text/html") }

// refuse answers with a status and a sentence, as a page or as JSON.
func refuse(w http.ResponseWriter, r *http.Request, status int, sentence string) {
	if !wantsPage(r) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		json.NewEncoder(w).Encode(map[string]string{"error": sentence})
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	templates.ExecuteTemplate(w, "refused.html", sentence)
}

// fail turns an error into the answer a listener can act on.
func fail(w http.ResponseWriter, r *http.Request, err error) {
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		refuse(w, r, http.StatusRequestEntityTooLarge, "The request is too large.")
	case errors.Is(err, ErrNotNow):
		text := strings.TrimPrefix(err.Error(), ErrNotNow.Error()+": ")
		refuse(w, r, http.StatusForbidden, strings.ToUpper(text[:1])+text[1:]+".")
	case errors.Is(err, ErrFinal):
		refuse(w, r, http.StatusConflict, "This trial was answered before, otherwise. Answers are final.")
	case errors.Is(err, ErrUnknown):
		refuse(w, r, http.StatusNotFound, "No such trial or clip in this session.")
	case errors.Is(err, ErrFull):
		refuse(w, r, http.StatusInsufficientStorage, "The disk of the panel is full. Your answer is not saved yet; make room and send it again.")
	case errors.Is(err, ErrDamaged):
		refuse(w, r, http.StatusInternalServerError, "The panel's file is damaged. Stop here and restore a copy; nothing more was written.")
	default:
		refuse(w, r, http.StatusInternalServerError, "That did not work: "+err.Error())
	}
}
