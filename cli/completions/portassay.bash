# Completion of portassay for bash.

_portassay_rules() {
    portassay rules --json 2>/dev/null | grep -o '"rule":"[^"]*"' | cut -d'"' -f4
}

_portassay_files() {
    local IFS=$'\n'
    compopt -o filenames 2>/dev/null
    COMPREPLY=($(compgen -f -- "$1"))
}

# Options of a command, and those that take a value.
_portassay_options() {
    local common="--json --port --since --until --about --output --verbose --quiet --color --help --version"
    case $1 in
    show) echo "--message --kind --terse --text $common" ;;
    offers) echo "$common" ;;
    check) echo "--strict --follow --judge --standard --limits --findings --explain --timings --volts --missing --only --skip $common" ;;
    diff) echo "--port-map --standard --limits --only --skip $common" ;;
    rules) echo "--parameters --limits --json --output --color --help --version" ;;
    cut) echo "--finding --around --standard --limits --findings --only --skip --anonymous --port --since --until --about --output --quiet --help --version" ;;
    synth) echo "--seed --truth --list-faults --output --quiet --help --version" ;;
    ports) echo "--json --output --quiet --help --version" ;;
    record) echo "--from --for --until-detached --edges --rotate --keep --overwrite --about --output --quiet --help --version" ;;
    import) echo "--align --columns --edges --invented --overwrite --about --output --quiet --help --version" ;;
    *) echo "--help --version" ;;
    esac
}

_portassay() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]}
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ]; then
        COMPREPLY=($(compgen -W "ports record import show offers check diff rules cut synth --help --version" -- "$word"))
        return
    fi
    case $before in
    --color) COMPREPLY=($(compgen -W "auto always never" -- "$word")); return ;;
    --kind | -k)
        COMPREPLY=($(compgen -W "packet reset power cc mark lost temperature about edges unknown damaged unreadable" -- "$word"))
        return
        ;;
    --standard) COMPREPLY=($(compgen -W "seen 2.0 3.0 3.1 3.2" -- "$word")); return ;;
    --judge) COMPREPLY=($(compgen -W "source sink cable link" -- "$word")); return ;;
    --findings) COMPREPLY=($(compgen -W "all" -- "$word")); return ;;
    --from) COMPREPLY=($(compgen -W "$(portassay ports --json 2>/dev/null | grep -o '"from":"[^"]*"' | cut -d'"' -f4) text:" -- "$word")); return ;;
    --only | --skip) COMPREPLY=($(compgen -W "$(_portassay_rules)" -- "$word")); return ;;
    --about | --limits | --output | -o | --truth | -t) _portassay_files "$word"; return ;;
    --port | -p | --since | --until | --message | -m | --finding | -f | --around | --explain | --seed | -s | --for | --rotate | --keep | --columns | --port-map) return ;;
    esac
    case $word in
    -*) COMPREPLY=($(compgen -W "$(_portassay_options "$command")" -- "$word")) ;;
    *)
        if [ "$command" = rules ]; then
            COMPREPLY=($(compgen -W "$(_portassay_rules)" -- "$word"))
        else
            _portassay_files "$word"
        fi
        ;;
    esac
}

complete -F _portassay portassay
