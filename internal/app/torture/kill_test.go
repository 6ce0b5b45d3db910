package torture

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var kills = flag.Int("torture", 10, "how often the server is killed")

// Eight people record. What got no answer before the server was killed is sent
// again to the next one, as the pages do.
func TestTorture_Hazard07_WhatWasAnsweredSurvivesKills(t *testing.T) {
	file := newRecord(t, t.TempDir())
	s := serve(t, file)
	nurses := make([]*nurse, 8)
	for i := range nurses {
		nurses[i] = &nurse{name: fmt.Sprintf("n%d", i), browser: signIn(t, s.url, "nurse")}
	}
	s.stop(t)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	moment := rand.New(rand.NewPCG(seed, 0))
	answered, early := 0, 0
	for range *kills {
		s, at := begin(t, file)
		if moment.IntN(8) == 0 { // while it opens the record that the last kill left
			early++
			time.Sleep(time.Duration(moment.IntN(100)) * time.Millisecond)
			s.kill(t)
			continue
		}
		base := <-at
		require.NotEmpty(t, base, "the server did not start again")
		var working sync.WaitGroup
		for _, n := range nurses {
			working.Go(func() { n.work(base) })
		}
		time.Sleep(time.Duration(moment.IntN(250)) * time.Millisecond)
		s.kill(t)
		working.Wait()
		answered = requireWhole(t, file, nurses)
	}
	require.Greater(t, answered, *kills, "too little was recorded to prove anything")
	last := serve(t, file)
	for _, n := range nurses { // what got no answer is taken, whether or not it was stored
		_, _, err := n.send(last.url, n.next())
		require.NoError(t, err)
	}
	last.stop(t)
	answered = requireWhole(t, file, nurses)
	t.Logf("%d acts answered, all there once; %d kills, %d of them while it started", answered, *kills, early)
}
