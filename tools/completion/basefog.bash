# SPDX-License-Identifier: GPL-3.0-or-later
# Completion for bash. Works with and without the bash-completion package.

_basefog_words() {
    mapfile -t COMPREPLY < <(compgen -W "$1" -- "$2")
}

# Folders, and files whose name ends in one of the given ways ("" for any); capitals count as small letters.
_basefog_files() {
    local endings=$1 word=$2 path
    COMPREPLY=()
    compopt -o filenames 2>/dev/null
    while IFS= read -r path; do
        if [[ -d $path || -z $endings || ${path,,} =~ \.($endings)$ ]]; then
            COMPREPLY+=("$path")
        fi
    done < <(compgen -f -- "$word")
}

_basefog_option_value() {
    local option=$1 word=$2
    case $option in
        --ledger | --layout | --write-layout | --settings) _basefog_files 'toml' "$word" ;;
        --history) _basefog_files 'sqlite' "$word" ;;
        --html) _basefog_files 'html?' "$word" ;;
        --csv | --json) _basefog_files 'csv|json' "$word" ;;
        --infrared | --light-frame | --dark-frame) _basefog_files 'tiff?|png' "$word" ;;
        --output)
            compopt -o filenames 2>/dev/null
            mapfile -t COMPREPLY < <(compgen -d -- "$word")
            ;;
        --encoding) _basefog_words 'linear srgb 1.8 2.2' "$word" ;;
        --output-profile)
            _basefog_files 'icc|icm' "$word"
            local spaces
            mapfile -t spaces < <(compgen -W 'srgb wide linear' -- "$word")
            COMPREPLY=("${spaces[@]}" "${COMPREPLY[@]}")
            ;;
        --compression) _basefog_words 'none lzw deflate zstd' "$word" ;;
        --mend) _basefog_words 'off safe all' "$word" ;;
        --format) _basefog_words 'auto 36x24 18x24 24x65 6x4.5 6x6 6x7' "$word" ;;
        --fail-on) _basefog_words 'none caution serious' "$word" ;;
        --memory) _basefog_words '512M 768M 1G 2G 4G' "$word" ;;
        --icc-version) _basefog_words '4 2' "$word" ;;
        --balance) _basefog_words 'roll frame' "$word" ;;
        --dpi | --exposure | --contrast | --black-point | --saturation | --threads | --max-pixels | --port) COMPREPLY=() ;;
        *) return 1 ;;
    esac
}

_basefog() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} verb='' i
    COMPREPLY=()

    # bash splits --option=value at "=".
    if [[ $word == '=' ]]; then
        word=''
    elif [[ $before == '=' ]]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi

    for ((i = 1; i < COMP_CWORD; i++)); do
        if [[ ${COMP_WORDS[i]} != -* ]]; then
            verb=${COMP_WORDS[i]}
            break
        fi
    done

    local shared='--ledger --output --layout --history --encoding --dpi --format --close-up --join --light-frame --dark-frame --infrared --no-infrared --threads --memory --max-pixels
        --update --replace --keep-going --fail-on --quiet --verbose --help'
    local pictures='--output-profile --icc-version --compression --linear --density --settings --balance --exposure --contrast --black-point --saturation --mend --keep-unmended'
    case $verb in
        '') _basefog_words 'invert measure ledger history review version --help --version' "$word" ;;
        invert | measure)
            if _basefog_option_value "$before" "$word"; then
                return
            elif [[ $word != -* ]]; then
                _basefog_files '' "$word" # RAW files have too many endings to list
            elif [[ $verb == invert ]]; then
                _basefog_words "$shared $pictures" "$word"
            else
                _basefog_words "$shared --write-layout" "$word"
            fi
            ;;
        history)
            if _basefog_option_value "$before" "$word"; then
                return
            elif [[ $before == history ]]; then
                _basefog_words 'add show compare export merge --history --html --replace --quiet --help' "$word"
            elif [[ $word == -* ]]; then
                _basefog_words '--history --html --csv --json --replace --quiet --help' "$word"
            else
                _basefog_files '' "$word" # results folders, reports, histories
            fi
            ;;
        review)
            if _basefog_option_value "$before" "$word"; then
                return
            elif [[ $word == -* ]]; then
                _basefog_words '--layout --settings --port --help' "$word"
            else
                compopt -o filenames 2>/dev/null
                mapfile -t COMPREPLY < <(compgen -d -- "$word")
            fi
            ;;
        ledger)
            case $before in
                ledger) _basefog_words 'write check groups --help' "$word" ;;
                check) _basefog_files 'toml' "$word" ;;
            esac
            ;;
    esac
}

complete -F _basefog basefog
