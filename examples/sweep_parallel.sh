#!/bin/sh
# The sweep of sweep_job_array.sh with GNU parallel: a thread of its own for every part.
#
#   sh sweep_parallel.sh FOLDER > lines.jsonl
#
# With --sshlogin and a shared FOLDER it runs on many machines; a second call goes on after an end.
set -eu
parts=${PARTS:-8}
here=$(dirname "$0")
folder=${1:?give a folder for the parts}

seq "$parts" | parallel --halt now,fail=1 sh "$here/sweep_job_array.sh" part {} "$parts" "$folder"
sh "$here/sweep_job_array.sh" join "$parts" "$folder"
