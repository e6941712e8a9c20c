package api

import "time"

// budgets are what requests reserve before they use it, so that no caller takes it from the others. The contract has a table of them.
type budgets struct {
	requests budget // being answered
	reading  budget // bytes of bodies over smallDocument that are being received
	decoding budget // bytes of memory that these take once they are read
	small    budget // bytes of memory that the other bodies take
	quick    budget // quick calculations
	places   budget // plans and slow calculations, running or waiting for a core
	streams  budget

	hashes      budget // of passwords from strangers, by address
	names       budget // of the same, by sign-in name
	knownHashes budget // of passwords from devices that have signed in before, by device
}

const (
	smallDocument = 32 * kib // a till's post

	maxReading  = 48 * mib
	maxDecoding = 48 * mib
	maxSmall    = 24 * mib

	maxStreams        = 2000
	maxStreamsOfOne   = 100
	maxRequests       = 2000
	maxRequestsOfOne  = 64
	maxQuickOfOne     = 4
	maxPlacesOfOne    = 1
	maxPlacesInAll    = 100
	bodyPatience      = 10 * time.Second
	placePatience     = 3 * time.Second
	requestPatience   = 2 * time.Second
	streamPatience    = time.Second
	waitingRequests   = 256
	waitingLargeOfOne = 2
	waitingHashes     = 2
	hashPatience      = 10 * time.Second
)

func newBudgets() *budgets {
	const again = "; try again when they have been answered"
	hashes := func(most int64) budget {
		return budget{most: most, share: 1, line: waitingHashes, wait: hashPatience,
			own: "several passwords are being checked; try again shortly", all: "too many passwords are being checked at the moment; try again shortly"}
	}
	return &budgets{
		hashes: hashes(1), names: hashes(maxRequests), knownHashes: hashes(1),
		requests: budget{most: maxRequests, share: maxRequestsOfOne, line: waitingRequests, wait: requestPatience,
			own: "more than 64 requests of yours are being answered" + again, all: "too many requests are being answered at the moment; try again shortly"},
		reading: budget{most: maxReading, share: largeBody, line: waitingLargeOfOne, wait: bodyPatience,
			own: "16 MiB of bodies are being received from you" + again, all: "too many large bodies are being received at the moment; try again shortly"},
		decoding: budget{most: maxDecoding, share: maxDecoding, line: waitingLargeOfOne, wait: bodyPatience,
			own: "other large bodies of yours are being read" + again, all: "too many large bodies are being read at the moment; try again shortly"},
		small: budget{most: maxSmall, share: maxSmall / 4, line: waitingRequests, wait: requestPatience,
			own: "too many bodies of yours are being read" + again, all: "too many bodies are being read at the moment; try again shortly"},
		quick: budget{most: maxRequests, share: maxQuickOfOne, line: waitingRequests, wait: requestPatience,
			own: "more than 4 calculations of yours are running" + again, all: "too many calculations are running at the moment; try again shortly"},
		places: budget{most: maxPlacesInAll, share: maxPlacesOfOne, line: 1, wait: placePatience,
			own: "a plan or slow calculation of yours is running; try again when it has been answered", all: "too many plans are being computed at the moment; try again shortly"},
		streams: budget{most: maxStreams, share: maxStreamsOfOne, line: 1, wait: streamPatience,
			own: "100 live streams of yours are open, the most there can be of one caller; close some", all: "2,000 live streams are open, the most there can be; try again later"},
	}
}
