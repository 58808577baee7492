# Completion of portassay for fish.

function __portassay_rules
    portassay rules --json 2>/dev/null | string match -rga '"rule":"([^"]*)"'
end

function __portassay_sources
    portassay ports --json 2>/dev/null | string match -rga '"from":"([^"]*)"'
    echo text:
end

set -l commands ports record import show offers check diff rules cut synth
set -l traces show offers check diff cut
set -l all show offers check diff

complete -c portassay -n "not __fish_seen_subcommand_from $commands" -f
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a ports -d 'what can be recorded from'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a record -d 'from live sources into a trace'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a import -d 'recordings of other instruments into a trace'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a show -d 'every record decoded, a line each'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a offers -d 'what each port offers and needs'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a check -d 'the verdict, with evidence'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a diff -d 'what behaves differently between two traces'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a rules -d 'the rules that are judged'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a cut -d 'a part of a trace, or several joined'
complete -c portassay -n "not __fish_seen_subcommand_from $commands" -a synth -d 'a trace made from a scenario'
complete -c portassay -s h -l help -d 'a short help'
complete -c portassay -l version -d 'the version'

complete -c portassay -n "__fish_seen_subcommand_from $traces" -s p -l port -x -d 'this port only'
complete -c portassay -n "__fish_seen_subcommand_from $traces" -l since -x -d 'from then on'
complete -c portassay -n "__fish_seen_subcommand_from $traces" -l until -x -d 'up to then'
complete -c portassay -n "__fish_seen_subcommand_from $traces record import" -l about -r -d 'JSON laid over what the trace says of the bench'
complete -c portassay -n "__fish_seen_subcommand_from $traces synth ports record import" -s q -l quiet -d 'no headings, no notices'
complete -c portassay -n "__fish_seen_subcommand_from $commands" -s o -l output -r -d 'write there'
complete -c portassay -n "__fish_seen_subcommand_from $all rules ports" -l json -d 'JSON for machines'
complete -c portassay -n "__fish_seen_subcommand_from $all rules" -l color -x -a 'auto always never' -d colour
complete -c portassay -n "__fish_seen_subcommand_from $all" -s v -l verbose -d 'every detail'

complete -c portassay -n '__fish_seen_subcommand_from show' -s m -l message -x -d 'these messages only'
complete -c portassay -n '__fish_seen_subcommand_from show' -s k -l kind -x -d 'these records only' \
    -a 'packet reset power cc mark lost temperature about edges unknown damaged unreadable'
complete -c portassay -n '__fish_seen_subcommand_from show' -s t -l terse -d 'leave out acknowledgements and copies'
complete -c portassay -n '__fish_seen_subcommand_from show' -l text -d 'the text form of the trace'

complete -c portassay -n '__fish_seen_subcommand_from check' -l strict -d 'exit 3 if something could not be decided'
complete -c portassay -n '__fish_seen_subcommand_from check' -l follow -d 'tell findings at once, while it is recorded'
complete -c portassay -n '__fish_seen_subcommand_from check' -l judge -x -a 'source sink cable link' -d 'who decides'
complete -c portassay -n '__fish_seen_subcommand_from check diff cut' -l standard -x -a 'seen 2.0 3.0 3.1 3.2' -d 'judge by this edition'
complete -c portassay -n '__fish_seen_subcommand_from check diff rules cut' -l limits -r -d 'numbers and levels set otherwise'
complete -c portassay -n '__fish_seen_subcommand_from check cut' -l findings -x -a all -d 'keep so many of each rule'
complete -c portassay -n '__fish_seen_subcommand_from check' -l explain -x -d 'how this finding was worked out'
complete -c portassay -n '__fish_seen_subcommand_from check' -l timings -d 'how long everything took, and the health of the talk'
complete -c portassay -n '__fish_seen_subcommand_from check' -l volts -d 'what VBUS did in each contract and at each load step'
complete -c portassay -n '__fish_seen_subcommand_from check' -l missing -d 'what the traces have not shown'
complete -c portassay -n '__fish_seen_subcommand_from check diff cut' -l only -x -a '(__portassay_rules)' -d 'these rules or groups only'
complete -c portassay -n '__fish_seen_subcommand_from check diff cut' -l skip -x -a '(__portassay_rules)' -d 'not these rules or groups'

complete -c portassay -n '__fish_seen_subcommand_from diff' -l port-map -x -d 'port A of the first is port B of the second'

complete -c portassay -n '__fish_seen_subcommand_from record' -s f -l from -x -d 'record from this one' -a '(__portassay_sources)'
complete -c portassay -n '__fish_seen_subcommand_from record' -l for -x -d 'stop after so long'
complete -c portassay -n '__fish_seen_subcommand_from record' -l until-detached -d 'stop when all is unplugged'
complete -c portassay -n '__fish_seen_subcommand_from record' -l rotate -x -d 'begin a next file after that'
complete -c portassay -n '__fish_seen_subcommand_from record' -l edges -d 'ask sniffers for the changes of the CC line too'
complete -c portassay -n '__fish_seen_subcommand_from record' -l keep -x -d 'so many files stay'
complete -c portassay -n '__fish_seen_subcommand_from record import' -l overwrite -d 'write over a file that is there'

complete -c portassay -n '__fish_seen_subcommand_from import' -l align -x -a 'best vbus mark mark: offset:' -d 'tie a log to the CC line'
complete -c portassay -n '__fish_seen_subcommand_from import' -l columns -x -d 'which column of a log is what'
complete -c portassay -n '__fish_seen_subcommand_from import' -l edges -d 'keep the changes of the CC line'
complete -c portassay -n '__fish_seen_subcommand_from import' -l invented -d 'flag every record INVENTED'

complete -c portassay -n '__fish_seen_subcommand_from rules' -f -a '(__portassay_rules)'
complete -c portassay -n '__fish_seen_subcommand_from rules' -l parameters -d 'every number that the rules go by'

complete -c portassay -n '__fish_seen_subcommand_from cut' -s f -l finding -x -d 'what this finding of check rests on'
complete -c portassay -n '__fish_seen_subcommand_from cut' -l around -x -d 'how much around it'
complete -c portassay -n '__fish_seen_subcommand_from cut' -l anonymous -d 'leave out who, where and when'

complete -c portassay -n '__fish_seen_subcommand_from synth' -s s -l seed -x -d 'instead of the seed of the scenario'
complete -c portassay -n '__fish_seen_subcommand_from synth' -s t -l truth -r -d 'what is true: faults, voltages, errors'
complete -c portassay -n '__fish_seen_subcommand_from synth' -s l -l list-faults -d 'what can be made wrong'
