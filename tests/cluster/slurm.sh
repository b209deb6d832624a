#!/usr/bin/env bash
# slurm.sh PROGRAM: an array of eight shards of a sweep of 20,000 combinations on a cluster of Slurm
# with one node of two slots, which it starts on this machine and ends again. One task is killed and
# requeued by Slurm. What is merged must be, byte for byte, what a single run writes.
set -euo pipefail
program=$(realpath "$1")
type slurmctld slurmd munged sbatch >/dev/null 2>&1 ||
    { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq slurm-wlm munge; } >/dev/null

work=$(mktemp -d /tmp/shakedown-slurm-XXXXXX)
started=()
ended() {
    code=$?
    for ((i = ${#started[@]} - 1; i >= 0; i--)); do kill "${started[i]}" 2>/dev/null || true; done
    wait || true
    [ $code = 0 ] || tail -n 15 "$work"/*.log "$work"/task-* || true
    rm -rf "$work"
}
trap ended EXIT
begin() { # NAME COMMAND...: starts a service, which this script ends
    local name=$1
    shift
    "$@" >"$work/$name.log" 2>&1 &
    started+=($!)
}
until_it() { # SECONDS COMMAND...: waits until a command succeeds
    local limit=$((SECONDS + $1))
    shift
    until "$@" >/dev/null 2>&1; do
        ((SECONDS < limit)) || { echo "waited in vain: $*"; return 1; }
        sleep 0.1
    done
}

host=$(hostname -s)
chmod 755 "$work"
mkdir -m 755 "$work/munge" "$work/state" "$work/spool"
(umask 077 && head -c 128 /dev/urandom >"$work/munge/key")
cat >"$work/slurm.conf" <<END
ClusterName=two-slots
SlurmctldHost=$host(127.0.0.1)
SlurmUser=$(id -un)
SlurmdUser=$(id -un)
AuthType=auth/munge
# A requeued task waits as long as a credential lasts.
AuthInfo=socket=$work/munge/socket,cred_expire=5
CredType=cred/munge
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldPort=26817
SlurmdPort=26818
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SchedulerParameters=sched_interval=1,sched_min_interval=100000
SlurmdParameters=config_overrides
ReturnToService=2
# What a shell says of a task that was killed.
RequeueExit=137
NodeName=$host NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes=$host Default=YES MaxTime=10 State=UP
END
export SLURM_CONF=$work/slurm.conf
begin munged munged --foreground --force --key-file="$work/munge/key" --socket="$work/munge/socket" \
    --pid-file="$work/munge/pid" --log-file="$work/munge/log" --seed-file="$work/munge/seed"
until_it 10 test -S "$work/munge/socket"
begin slurmctld slurmctld -D
begin slurmd slurmd -D -N "$host"
until_it 30 sh -c "sinfo -h -o %t | grep -qx idle"
sinfo -o '%N: %c slots, %t' -h

sweep=(sweep --vary motor.mass_kg=40..59.9:0.1 --vary gearbox.final_drive=3.5..4.49:0.01 --cycle wltc)
cd "$work"
"$program" "${sweep[@]}" --out single.csv
cat >task <<END
#!/bin/bash
export RAYON_NUM_THREADS=1
"$program" ${sweep[@]} --out rows.csv --shard array &
echo \$! >"pid-\$SLURM_ARRAY_TASK_ID"
wait \$!
END
begun=$SECONDS
job=$(sbatch --parsable --array=1-8 --ntasks=1 --cpus-per-task=1 --output="$work/task-%a" --open-mode=append task)
until_it 60 sh -c 'test "$(wc -l <rows.csv.3-of-8.part)" -gt 200'
kill -KILL "$(cat pid-3)"
echo "task 3 killed with $(wc -l <rows.csv.3-of-8.part) lines done"
"$program" "${sweep[@]}" --out rows.csv --merge 2>&1 | head -n 1 || true
requeued() { scontrol show job "${job}_3" | grep -q 'Restarts=[1-9]'; }
until_it 30 requeued
all_done() { ! squeue -h -j "$job" 2>/dev/null | grep -q .; }
until_it 90 all_done
cat task-3
"$program" "${sweep[@]}" --out rows.csv --merge
cmp single.csv rows.csv
echo "the merged file is that of the single run: $(wc -l <rows.csv) lines, array of 8 in $((SECONDS - begun)) s"
