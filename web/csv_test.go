package web

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSendTable_NoCellIsAFormula(t *testing.T) {
	t.Parallel()
	answer := httptest.NewRecorder()
	rows := [][]string{{"bed", "patient"}, {"=HYPERLINK(1)", "@SUM(A1)"}, {"-3", "KD-204"}}
	require.NoError(t, sendTable(answer, httptest.NewRequest("GET", "/audit.csv", nil), "audit", rows))
	require.Equal(t, "bed,patient\n'=HYPERLINK(1),'@SUM(A1)\n'-3,KD-204\n", answer.Body.String())
	require.Equal(t, `attachment; filename="audit.csv"`, answer.Header().Get("Content-Disposition"))
}
