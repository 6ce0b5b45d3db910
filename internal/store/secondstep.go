package store

import (
	"context"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// SecondStep is a person's second step; ok is false where there is none.
func (s *Store) SecondStep(ctx context.Context, id line.ID) (step account.SecondStep, ok bool, err error) {
	return one(ctx, s, secondStepOf, func(row scan) (account.SecondStep, error) {
		var step account.SecondStep
		return step, row(&step.Key, &step.Confirmed, &step.Used)
	}, string(id))
}

// SetSecondStep keeps a person's second step in place of any before.
func (s *Store) SetSecondStep(ctx context.Context, id line.ID, step account.SecondStep) error {
	return s.put(ctx, setSecondStep, string(id), []byte(step.Key), step.Confirmed, step.Used)
}

// UseStep notes that the code of a step was used; used is false where it, or a
// later one, had been before.
func (s *Store) UseStep(ctx context.Context, id line.ID, step int64) (used bool, err error) {
	err = s.write(ctx, func(w *writer) (change, error) {
		_, used, err = one(ctx, w, useStep, value[int], step, string(id), step)
		return change{}, err
	})
	return used, err
}

// DropSecondStep forgets a person's second step with its recovery codes.
func (s *Store) DropSecondStep(ctx context.Context, id line.ID) error {
	return s.write(ctx, func(w *writer) (change, error) {
		if err := w.exec(dropSecondStep, string(id)); err != nil {
			return change{}, err
		}
		return change{}, w.exec(dropRecovery, string(id))
	})
}

// SetRecoveryCodes keeps the hashes of a person's recovery codes in place of any before.
func (s *Store) SetRecoveryCodes(ctx context.Context, id line.ID, hashes []string) error {
	return s.write(ctx, func(w *writer) (change, error) {
		if err := w.exec(dropRecovery, string(id)); err != nil {
			return change{}, err
		}
		for _, hash := range hashes {
			if err := w.exec(keepRecovery, string(id), hash); err != nil {
				return change{}, err
			}
		}
		return change{}, nil
	})
}

// UseRecoveryCode takes a recovery code away; used is false where there is no such one.
func (s *Store) UseRecoveryCode(ctx context.Context, id line.ID, hash string) (used bool, err error) {
	err = s.write(ctx, func(w *writer) (change, error) {
		_, used, err = one(ctx, w, useRecovery, value[int], string(id), hash)
		return change{}, err
	})
	return used, err
}

// RecoveryCodes counts those a person has left.
func (s *Store) RecoveryCodes(ctx context.Context, id line.ID) (int, error) {
	n, _, err := one(ctx, s, countRecovery, value[int], string(id))
	return n, err
}

var (
	secondStepOf   = stated(reading, "read a second step", "SELECT code_key, confirmed, used FROM second_step WHERE account = ?")
	setSecondStep  = stated(writing, "keep a second step", "INSERT OR REPLACE INTO second_step (account, code_key, confirmed, used) VALUES (?, ?, ?, ?)")
	useStep        = stated(writing, "use a code", "UPDATE second_step SET used = ? WHERE account = ? AND used < ? RETURNING 1")
	dropSecondStep = stated(writing, "forget a second step", "DELETE FROM second_step WHERE account = ?")
	keepRecovery   = stated(writing, "keep a recovery code", "INSERT INTO recovery_code (account, hash) VALUES (?, ?)")
	dropRecovery   = stated(writing, "forget recovery codes", "DELETE FROM recovery_code WHERE account = ?")
	useRecovery    = stated(writing, "use a recovery code", "DELETE FROM recovery_code WHERE account = ? AND hash = ? RETURNING 1")
	countRecovery  = stated(reading, "count recovery codes", "SELECT count(*) FROM recovery_code WHERE account = ?")
)
