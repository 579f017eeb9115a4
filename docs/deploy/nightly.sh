#!/bin/sh
# Every night: mails the coordinator what must be acted on, then checks the data and brings the backup up to date.
# Whatever fails is mailed to whoever runs the machine. Make the folder of the copy once, on the other disk: where it is
# not there, the disk is not there either, and that is mailed too. As the service's user, in /etc/cron.d/receiving:
#   17 4 * * * receiving /opt/receiving/bin/nightly.sh
set -u
PATH=$PATH:/opt/receiving/bin
data=${DATA:-/var/lib/receiving}
copy=${COPY:-/mnt/backup/receiving}
coordinator=${COORDINATOR:-coordinator@example.com}
keeper=${KEEPER:-it@example.com}

send() { # send SUBJECT TO, the text on standard input
    mail -s "$1" "$2"
}

failed=0
told=$(receiving overview --data "$data" --days 10 2>&1)
case $? in
    0) ;;
    3) printf '%s\n' "$told" | send "Shipments to act on" "$coordinator" || failed=1 ;;
    *) failed=1; printf '%s\n' "$told" | send "Overview failed" "$keeper" ;;
esac

copy_all() {
    [ -d "$copy" ] || { echo "There is no folder $copy."; return 1; }
    receiving backup --data "$data" --out "$copy" 2>&1
}
told=$(copy_all) || {
    failed=1
    printf '%s\n' "$told" | send "Backup failed: the copy before it is kept" "$keeper"
}
exit $failed
