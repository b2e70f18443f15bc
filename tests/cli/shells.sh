# Manual page and completions: whatever `rarefy help` names is in all of them, and the shells take them.
source "$(dirname "$0")/support.bash"

run help --man
expect 0 "help --man"
mv out page
for shell in bash zsh fish; do
    run help --completions $shell
    expect 0 "help --completions $shell"
    silent err "help --completions $shell"
    mv out $shell.txt
    if command -v $shell >/dev/null; then $shell -n $shell.txt || fail "$shell does not read its completions"; fi
done
tr -d '\\' <page >plain_page

run help
commands=$(sed -n '/^Commands:/,/^$/p' out | awk '/^  / { print $1 }')
n=0
for command in $commands; do
    run help "$command"
    options=$(awk '/^Options:/ { on = 1; next } /^$/ { on = 0 } on' out | grep -oE '^  (-[a-z],|   ) --[a-z-]+' |
        grep -oE -e '--[a-z-]+')
    says plain_page "SS rarefy $command" "manual page"
    awk -v c="    $command)" '$0 == c { on = 1 } on && /options=/ { print; exit }' bash.txt >bash_own
    awk -v c="    $command)" '$0 == c { on = 1 } on { print } on && /;;/ { exit }' zsh.txt >zsh_own
    awk -v c=".SS rarefy $command" 'index($0, c) == 1 { on = 1; print; next } /^\.S[SH]/ { on = 0 } on' plain_page >page_own
    for option in $options; do
        n=$((n + 1))
        grep -qE -e "$option( |')" bash_own || fail "bash: $command $option is missing"
        grep -qE -e "$option([=[,}]|$)" zsh_own || fail "zsh: $command $option is missing"
        grep -qE -e "seen_subcommand_from $command' -l ${option#--} " fish.txt || fail "fish: $command $option is missing"
        grep -qF -e "fB$option" page_own || fail "manual page: $command $option is missing"
    done
done
[ $n -gt 80 ] || fail "only $n options were looked at"
for code in 0 1 2 3 4 5 130; do grep -qx "$code" page || fail "manual page: exit code $code is missing"; done
if command -v mandoc >/dev/null; then mandoc -T lint -W error page >lint || fail "mandoc: $(cat lint)"; fi
if command -v groff >/dev/null; then
    groff -man -Tutf8 -ww page >/dev/null 2>lint
    [ ! -s lint ] || fail "groff: $(head -3 lint)"
fi

# What bash offers.
source ./bash.txt
offers() { # WANTED WORDS...: the last word is being typed
    local wanted=$1
    shift
    COMP_WORDS=(rarefy "$@") COMP_CWORD=$# COMPREPLY=()
    _rarefy
    [[ " ${COMPREPLY[*]-} " == *" $wanted "* ]] || fail "bash: \"$*\" offers ${COMPREPLY[*]-nothing}, not $wanted"
}
compopt() { :; }
offers run r
offers schema sch
offers --pressure-unit run file.json --pre
offers mTorr run --pressure-unit m
offers rodasp run --method roda
offers materials list mat
offers tube conductance tu
offers protect help pro
offers fish help --completions f
touch bench.json
offers bench.json run be
offers bench.json run -o be
offers bench.json check --set a=1 be

run help --completions csh
expect 2 "completions for another shell"
run help run --man
expect 2 "two of a kind"
finish
