# Completion for bash, made by `evenspool help --completion bash`.
_evenspool() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}
    local verb=${COMP_WORDS[1]}
    if [[ $COMP_CWORD -eq 1 ]]; then
        COMPREPLY=($(compgen -W 'check rehearse trim inputs bench tape deck trust export import clock help --help --version' -- "$word"))
        return
    fi
    if [[ $verb == tape ]]; then
        if [[ $COMP_CWORD -eq 2 ]]; then
            COMPREPLY=($(compgen -W ' write read --help' -- "$word"))
            return
        fi
        verb+=-${COMP_WORDS[2]}
    fi
    if [[ $verb == deck ]]; then
        if [[ $COMP_CWORD -eq 2 ]]; then
            COMPREPLY=($(compgen -W ' add list show edit remark remove --help' -- "$word"))
            return
        fi
        verb+=-${COMP_WORDS[2]}
    fi
    if [[ $verb == trust ]]; then
        if [[ $COMP_CWORD -eq 2 ]]; then
            COMPREPLY=($(compgen -W ' play anchor solve next tape list remove --help' -- "$word"))
            return
        fi
        verb+=-${COMP_WORDS[2]}
    fi
    case $verb:$before in
    check:--tone) COMPREPLY=(); return ;;
    check:--tape-error) COMPREPLY=(); return ;;
    check:--tape-u95) COMPREPLY=(); return ;;
    check:--tape) COMPREPLY=(); return ;;
    check:--deck) COMPREPLY=(); return ;;
    check:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    check:--clock-ppm) COMPREPLY=(); return ;;
    check:--channel) COMPREPLY=($(compgen -W ' left right auto' -- "$word")); return ;;
    check:--start) COMPREPLY=(); return ;;
    check:--end) COMPREPLY=(); return ;;
    check:--class) COMPREPLY=($(compgen -W ' cassette microcassette reel-4.76 reel-9.5 reel-19 reel-38 reel-76' -- "$word")); return ;;
    check:--capstan) COMPREPLY=(); return ;;
    check:--tolerance) COMPREPLY=(); return ;;
    check:--expect) COMPREPLY=(); return ;;
    check:--picture) COMPREPLY=($(compgen -f -- "$word")); return ;;
    check:--csv) COMPREPLY=($(compgen -f -- "$word")); return ;;
    check:--raw) COMPREPLY=(); return ;;
    check:--color) COMPREPLY=($(compgen -W ' auto always never' -- "$word")); return ;;
    rehearse:--out|rehearse:-o) COMPREPLY=($(compgen -f -- "$word")); return ;;
    rehearse:--truth) COMPREPLY=($(compgen -f -- "$word")); return ;;
    rehearse:--programme|rehearse:-p) COMPREPLY=($(compgen -W ' cassette cassette-c90 cassette-70 cassette-short reel-9.5 reel-19 reel-38' -- "$word")); return ;;
    rehearse:--side) COMPREPLY=($(compgen -W ' a b 1 2' -- "$word")); return ;;
    rehearse:--seconds) COMPREPLY=(); return ;;
    rehearse:--rate) COMPREPLY=(); return ;;
    rehearse:--seed) COMPREPLY=(); return ;;
    trim:--source|trim:-s) COMPREPLY=(); return ;;
    trim:--adjust) COMPREPLY=($(compgen -W ' speed azimuth level balance' -- "$word")); return ;;
    trim:--class) COMPREPLY=($(compgen -W ' cassette microcassette reel-4.76 reel-9.5 reel-19 reel-38 reel-76' -- "$word")); return ;;
    trim:--tone) COMPREPLY=(); return ;;
    trim:--tape-error) COMPREPLY=(); return ;;
    trim:--tape-u95) COMPREPLY=(); return ;;
    trim:--tape) COMPREPLY=(); return ;;
    trim:--deck) COMPREPLY=(); return ;;
    trim:--asked) COMPREPLY=(); return ;;
    trim:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trim:--clock-ppm) COMPREPLY=(); return ;;
    trim:--target) COMPREPLY=(); return ;;
    trim:--tolerance) COMPREPLY=(); return ;;
    trim:--reference) COMPREPLY=(); return ;;
    trim:--channel) COMPREPLY=($(compgen -W ' left right auto' -- "$word")); return ;;
    trim:--seconds) COMPREPLY=(); return ;;
    trim:--until) COMPREPLY=($(compgen -W ' there end' -- "$word")); return ;;
    trim:--record) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trim:--session) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trim:--sound) COMPREPLY=($(compgen -W ' none reference beat guide' -- "$word")); return ;;
    trim:--sound-level) COMPREPLY=(); return ;;
    trim:--output) COMPREPLY=(); return ;;
    trim:--color) COMPREPLY=($(compgen -W ' auto always never' -- "$word")); return ;;
    inputs:--listen) COMPREPLY=(); return ;;
    bench:--source|bench:-s) COMPREPLY=(); return ;;
    bench:--port|bench:-p) COMPREPLY=(); return ;;
    bench:--tone) COMPREPLY=(); return ;;
    bench:--tape-error) COMPREPLY=(); return ;;
    bench:--tape-u95) COMPREPLY=(); return ;;
    bench:--clock-ppm) COMPREPLY=(); return ;;
    bench:--target) COMPREPLY=(); return ;;
    bench:--tolerance) COMPREPLY=(); return ;;
    bench:--channel) COMPREPLY=($(compgen -W ' left right auto' -- "$word")); return ;;
    bench:--record) COMPREPLY=($(compgen -f -- "$word")); return ;;
    bench:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-write:--programme|tape-write:-p) COMPREPLY=($(compgen -W ' cassette cassette-c90 cassette-70 cassette-short reel-9.5 reel-19 reel-38' -- "$word")); return ;;
    tape-write:--side) COMPREPLY=($(compgen -W ' a b 1 2 both' -- "$word")); return ;;
    tape-write:--out|tape-write:-o) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-write:--to|tape-write:-t) COMPREPLY=($(compgen -W ' device:' -- "$word")); return ;;
    tape-write:--rate) COMPREPLY=(); return ;;
    tape-write:--reference) COMPREPLY=(); return ;;
    tape-write:--cues) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-read:--source|tape-read:-s) COMPREPLY=(); return ;;
    tape-read:--record) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-read:--deck|tape-read:-d) COMPREPLY=(); return ;;
    tape-read:--tape|tape-read:-t) COMPREPLY=(); return ;;
    tape-read:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-read:--tape-error) COMPREPLY=(); return ;;
    tape-read:--tape-u95) COMPREPLY=(); return ;;
    tape-read:--clock-ppm) COMPREPLY=(); return ;;
    tape-read:--programme|tape-read:-p) COMPREPLY=($(compgen -W ' cassette cassette-c90 cassette-70 cassette-short reel-9.5 reel-19 reel-38' -- "$word")); return ;;
    tape-read:--limits) COMPREPLY=($(compgen -W ' cassette reel' -- "$word")); return ;;
    tape-read:--level) COMPREPLY=(); return ;;
    tape-read:--recorded-response) COMPREPLY=($(compgen -f -- "$word")); return ;;
    tape-read:--bias) COMPREPLY=(); return ;;
    tape-read:--expect) COMPREPLY=(); return ;;
    tape-read:--raw) COMPREPLY=(); return ;;
    tape-read:--color) COMPREPLY=($(compgen -W ' auto always never' -- "$word")); return ;;
    deck-add:--class) COMPREPLY=($(compgen -W ' cassette microcassette reel-4.76 reel-9.5 reel-19 reel-38 reel-76' -- "$word")); return ;;
    deck-add:--speed) COMPREPLY=(); return ;;
    deck-add:--capstan) COMPREPLY=(); return ;;
    deck-add:--pinch-roller) COMPREPLY=(); return ;;
    deck-add:--flywheel) COMPREPLY=(); return ;;
    deck-add:--motor-pulley) COMPREPLY=(); return ;;
    deck-add:--belt) COMPREPLY=(); return ;;
    deck-add:--idler) COMPREPLY=(); return ;;
    deck-add:--hub-radius) COMPREPLY=(); return ;;
    deck-add:--photo) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-add:--notes) COMPREPLY=(); return ;;
    deck-add:--drift) COMPREPLY=(); return ;;
    deck-add:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-add:--since) COMPREPLY=(); return ;;
    deck-list:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-show:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-edit:--class) COMPREPLY=($(compgen -W ' cassette microcassette reel-4.76 reel-9.5 reel-19 reel-38 reel-76' -- "$word")); return ;;
    deck-edit:--speed) COMPREPLY=(); return ;;
    deck-edit:--capstan) COMPREPLY=(); return ;;
    deck-edit:--pinch-roller) COMPREPLY=(); return ;;
    deck-edit:--flywheel) COMPREPLY=(); return ;;
    deck-edit:--motor-pulley) COMPREPLY=(); return ;;
    deck-edit:--belt) COMPREPLY=(); return ;;
    deck-edit:--idler) COMPREPLY=(); return ;;
    deck-edit:--hub-radius) COMPREPLY=(); return ;;
    deck-edit:--photo) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-edit:--notes) COMPREPLY=(); return ;;
    deck-edit:--drift) COMPREPLY=(); return ;;
    deck-edit:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-edit:--rename) COMPREPLY=(); return ;;
    deck-edit:--adjusted) COMPREPLY=($(compgen -W ' now' -- "$word")); return ;;
    deck-edit:--why) COMPREPLY=(); return ;;
    deck-remark:--job) COMPREPLY=(); return ;;
    deck-remark:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    deck-remove:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-play:--recorded-on) COMPREPLY=(); return ;;
    trust-play:--played-on) COMPREPLY=(); return ;;
    trust-play:--heard) COMPREPLY=(); return ;;
    trust-play:--u95) COMPREPLY=(); return ;;
    trust-play:--capture) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-play:--tone) COMPREPLY=(); return ;;
    trust-play:--tape) COMPREPLY=(); return ;;
    trust-play:--recorded-at) COMPREPLY=(); return ;;
    trust-play:--played-at) COMPREPLY=(); return ;;
    trust-play:--recorded-epoch) COMPREPLY=(); return ;;
    trust-play:--played-epoch) COMPREPLY=(); return ;;
    trust-play:--note) COMPREPLY=(); return ;;
    trust-play:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-anchor:--method|trust-anchor:-m) COMPREPLY=($(compgen -W ' tape-length counter capstan test-tape mains-hum line-whistle stereo-pilot music other' -- "$word")); return ;;
    trust-anchor:--error) COMPREPLY=(); return ;;
    trust-anchor:--u95) COMPREPLY=(); return ;;
    trust-anchor:--answer|trust-anchor:-a) COMPREPLY=(); return ;;
    trust-anchor:--at) COMPREPLY=(); return ;;
    trust-anchor:--epoch) COMPREPLY=(); return ;;
    trust-anchor:--note) COMPREPLY=(); return ;;
    trust-anchor:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-solve:--robust) COMPREPLY=($(compgen -W ' none remove soften' -- "$word")); return ;;
    trust-solve:--level) COMPREPLY=(); return ;;
    trust-solve:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-next:--play-u) COMPREPLY=(); return ;;
    trust-next:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-tape:--recorded-on) COMPREPLY=(); return ;;
    trust-tape:--recorded-at) COMPREPLY=(); return ;;
    trust-tape:--recorded-epoch) COMPREPLY=(); return ;;
    trust-tape:--stated) COMPREPLY=(); return ;;
    trust-tape:--u95) COMPREPLY=(); return ;;
    trust-tape:--tone) COMPREPLY=(); return ;;
    trust-tape:--programme) COMPREPLY=(); return ;;
    trust-tape:--class) COMPREPLY=($(compgen -W ' cassette microcassette reel-4.76 reel-9.5 reel-19 reel-38 reel-76' -- "$word")); return ;;
    trust-tape:--thickness) COMPREPLY=(); return ;;
    trust-tape:--length) COMPREPLY=(); return ;;
    trust-tape:--notes) COMPREPLY=(); return ;;
    trust-tape:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-list:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    trust-remove:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    export:--out|export:-o) COMPREPLY=($(compgen -f -- "$word")); return ;;
    export:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    import:--records) COMPREPLY=($(compgen -f -- "$word")); return ;;
    clock:--input) COMPREPLY=(); return ;;
    clock:--seconds) COMPREPLY=(); return ;;
    help:--completion) COMPREPLY=($(compgen -W ' bash zsh fish' -- "$word")); return ;;
    esac
    if [[ $word == -* ]]; then
        case $verb in
        check) COMPREPLY=($(compgen -W '--tone --tape-error --tape-u95 --tape --deck --records --clock-ppm --channel --start --end --class --capstan --tolerance --expect --json --picture --csv --raw --color --help' -- "$word")) ;;
        rehearse) COMPREPLY=($(compgen -W '--out --truth --programme --side --seconds --rate --seed --float --force --list --help' -- "$word")) ;;
        trim) COMPREPLY=($(compgen -W '--source --adjust --class --tone --tape-error --tape-u95 --tape --deck --asked --records --clock-ppm --target --tolerance --reference --channel --seconds --until --unpaced --record --session --force --sound --sound-level --output --json --color --help' -- "$word")) ;;
        inputs) COMPREPLY=($(compgen -W '--listen --json --help' -- "$word")) ;;
        bench) COMPREPLY=($(compgen -W '--source --port --lan --tone --tape-error --tape-u95 --clock-ppm --target --tolerance --channel --record --force --records --help' -- "$word")) ;;
        tape-write) COMPREPLY=($(compgen -W '--programme --side --out --to --ready --rate --reference --cues --force --list --print --json --help' -- "$word")) ;;
        tape-read) COMPREPLY=($(compgen -W '--source --unpaced --record --force --deck --tape --records --tape-error --tape-u95 --clock-ppm --programme --limits --level --recorded-response --recorded-here --bias --expect --json --raw --color --help' -- "$word")) ;;
        deck-add) COMPREPLY=($(compgen -W '--class --speed --capstan --pinch-roller --flywheel --motor-pulley --belt --idler --hub-radius --photo --notes --drift --records --json --since --help' -- "$word")) ;;
        deck-list) COMPREPLY=($(compgen -W '--records --json --help' -- "$word")) ;;
        deck-show) COMPREPLY=($(compgen -W '--records --json --help' -- "$word")) ;;
        deck-edit) COMPREPLY=($(compgen -W '--class --speed --capstan --pinch-roller --flywheel --motor-pulley --belt --idler --hub-radius --photo --notes --drift --records --json --rename --adjusted --why --help' -- "$word")) ;;
        deck-remark) COMPREPLY=($(compgen -W '--job --records --json --help' -- "$word")) ;;
        deck-remove) COMPREPLY=($(compgen -W '--with-history --records --json --help' -- "$word")) ;;
        trust-play) COMPREPLY=($(compgen -W '--recorded-on --played-on --heard --u95 --capture --tone --tape --recorded-at --played-at --recorded-epoch --played-epoch --note --records --json --help' -- "$word")) ;;
        trust-anchor) COMPREPLY=($(compgen -W '--method --error --u95 --answer --questions --at --epoch --note --dry-run --records --json --help' -- "$word")) ;;
        trust-solve) COMPREPLY=($(compgen -W '--robust --level --records --json --help' -- "$word")) ;;
        trust-next) COMPREPLY=($(compgen -W '--play-u --records --json --help' -- "$word")) ;;
        trust-tape) COMPREPLY=($(compgen -W '--recorded-on --recorded-at --recorded-epoch --stated --u95 --tone --programme --class --thickness --length --notes --force --records --json --help' -- "$word")) ;;
        trust-list) COMPREPLY=($(compgen -W '--records --json --help' -- "$word")) ;;
        trust-remove) COMPREPLY=($(compgen -W '--records --json --with-history --help' -- "$word")) ;;
        export) COMPREPLY=($(compgen -W '--out --records --force --json --help' -- "$word")) ;;
        import) COMPREPLY=($(compgen -W '--records --json --help' -- "$word")) ;;
        clock) COMPREPLY=($(compgen -W '--input --seconds --json --help' -- "$word")) ;;
        help) COMPREPLY=($(compgen -W '--man --completion --help' -- "$word")) ;;
        esac
        return
    fi
    case $verb in
    check) COMPREPLY=($(compgen -f -- "$word")) ;;
    rehearse) COMPREPLY=($(compgen -f -W "$(evenspool rehearse --list 2>/dev/null | cut -d' ' -f1)" -- "$word")) ;;
    trim) COMPREPLY=() ;;
    inputs) COMPREPLY=() ;;
    bench) COMPREPLY=() ;;
    tape-write) COMPREPLY=() ;;
    tape-read) COMPREPLY=($(compgen -f -- "$word")) ;;
    deck-add) COMPREPLY=() ;;
    deck-list) COMPREPLY=() ;;
    deck-show) COMPREPLY=() ;;
    deck-edit) COMPREPLY=() ;;
    deck-remark) COMPREPLY=() ;;
    deck-remove) COMPREPLY=() ;;
    trust-play) COMPREPLY=() ;;
    trust-anchor) COMPREPLY=() ;;
    trust-solve) COMPREPLY=() ;;
    trust-next) COMPREPLY=() ;;
    trust-tape) COMPREPLY=() ;;
    trust-list) COMPREPLY=() ;;
    trust-remove) COMPREPLY=() ;;
    export) COMPREPLY=() ;;
    import) COMPREPLY=($(compgen -f -- "$word")) ;;
    clock) COMPREPLY=() ;;
    help) COMPREPLY=($(compgen -W 'check rehearse trim inputs bench tape deck trust export import clock help' -- "$word")) ;;
    esac
}
complete -o filenames -F _evenspool evenspool
