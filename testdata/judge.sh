#!/bin/bash
# Runs the page checkers over a demo of its own: every page, for every role,
# light and dark, phone to desk. Use: judge.sh FOLDER-OF-CHECKERS
set -uo pipefail
export GOTOOLCHAIN=go1.27.3
judges=$(bash "$1/setup.sh")
port=${PORT:-8391}
base=http://127.0.0.1:$port
bin=$(mktemp -d)
trap 'kill $server 2>/dev/null; rm -rf "$bin"' EXIT
go build -o "$bin/server" ./cmd/server || exit 2
"$bin/server" demo -addr "127.0.0.1:$port" 2>"$bin/log" &
server=$!
for _ in $(seq 60); do grep -q 'Sign in' "$bin/log" && break; sleep 0.5; done
pass='paper lantern harbour'
failed=0

# links PERSON PATH PATTERN: the first link on a page that fits the pattern.
links() {
	curl -s -c "$bin/jar-$1" -o /dev/null -H "Origin: $base" --data-urlencode "sign_in=$1" --data-urlencode "passphrase=$pass" "$base/sign-in"
	curl -s -b "$bin/jar-$1" "$base$2" | grep -oE "href=\"$3\"" | head -1 | sed 's/href="//; s/"//'
}

judge() { # judge PERSON PATH...
	person=$1; shift
	in=(--user "$person" --pass "$pass" --login-path /sign-in --user-field sign_in --pass-field passphrase --submit 'main form button')
	node "$judges/axe.mjs" "$base" "$@" "${in[@]}" --views phone,tablet,desktop,reflow --scheme light,dark || failed=1
	bash "$judges/vnu.sh" "$base" "$@" "${in[@]}" || failed=1
	node "$judges/keyboard.mjs" "$base" "$@" "${in[@]}" --max 900 || failed=1
}

nurse=nurse.alder1
ward=$(links $nurse /wards '/wards/[^"/?]+')
line=$(links $nurse "$ward" '/lines/[^"/?]+')
patient=$(links $nurse "$line" '/patients/[^"/?]+')
judge $nurse /wards "$ward?order=bed" "$patient" "$line" "$ward/admit" \
	"$patient/place" "$patient/not-seen" "$patient/transfer" "$patient/discharge" "$patient/facts" \
	"$line/review" "$line/dressing" "$line/remove" "$line/not-seen" "$line/justify" /my-record /policy /tray /passphrase "$ward"
judge $nurse "$ward/round" "$ward/round?end=1" "$line/look" "$line/look?step=found" "$line/label" "$line/label?paper=a4" /scan /downtime "$ward/back-entry" \
	/choose-size /my-record/portfolio
entry=$(links $nurse "$line" '/entries/[^"/]+/correct')
judge $nurse "$entry" "${entry%correct}void" "$ward/handover"
judge doctor1 /my-record
watched=$(links lead '/compliance?by=ward&rule=watch-after-removal' '/lines/[^"/?]+')
calendar=$(links lead "/calendar/${ward#/wards/}" '/calendar/[^"]+shift=[^"]+' | sed 's/&amp;/\&/g; s/#.*//')
judge lead /audit '/audit?at=2026-01-01T03:00&known=2026-01-02T03:00&advice=1' /compliance '/compliance?by=ward' \
	/walk-round /outcomes '/outcomes?by=ward&cause=phlebitis&like-for-like=yes' /report /calendar "$calendar" /policy /policy/edit /policy/history \
	"$line" "$line/infection" "$line/follow-up" "$watched/site-check"
# A page that says what is wrong starts at that, so its keyboard order is not walked from the top.
in=(--user lead --pass "$pass" --login-path /sign-in --user-field sign_in --pass-field passphrase --submit 'main form button')
node "$judges/axe.mjs" "$base" '/audit?at=nonsense' '/compliance?by=shift&from=x' "${in[@]}" --views phone,desktop --scheme light,dark || failed=1
bash "$judges/vnu.sh" "$base" '/audit?at=nonsense' '/compliance?by=shift&from=x' "${in[@]}" || failed=1
account=$(links admin /people '/people/[^"/?]+')
form=$(links admin /ward-values '/ward-values/[^"/?]+')
for found in "$ward" "$line" "$patient" "$entry" "$watched" "$calendar" "$account" "$form"; do
	[ -n "$found" ] || { echo "judge.sh: the demo lacks a page it should have" >&2; exit 2; }
done
judge admin /people /ward-values /policy "$account" "$form" /begin/hospital /begin/wards /begin/staff

# The first start of an empty record.
"$bin/server" serve -db "$bin/empty.db" -addr 127.0.0.1:$((port + 1)) 2>"$bin/empty.log" &
empty=$!
trap 'kill $server $empty 2>/dev/null; rm -rf "$bin"' EXIT
for _ in $(seq 40); do grep -qE '/set-up/' "$bin/empty.log" && break; sleep 0.5; done
setup=$(grep -oE '/set-up/[A-Za-z0-9_-]+' "$bin/empty.log" | head -1)
node "$judges/axe.mjs" "http://127.0.0.1:$((port + 1))" "$setup" --views phone,desktop --scheme light,dark || failed=1
bash "$judges/vnu.sh" "http://127.0.0.1:$((port + 1))" "$setup" || failed=1
node "$judges/keyboard.mjs" "http://127.0.0.1:$((port + 1))" "$setup" --max 900 || failed=1
node "$judges/axe.mjs" "$base" /sign-in --views phone,desktop --scheme light,dark || failed=1
exit $failed
