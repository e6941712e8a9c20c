# bash: eval "$(hotday completion bash)" in ~/.bashrc
_hotday() {
    local candidate IFS=$'\n'
    COMPREPLY=()
    for candidate in $("$1" complete -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null); do
        if [ "$candidate" = : ]; then
            COMPREPLY+=($(compgen -f -- "$2"))
            compopt -o filenames 2>/dev/null
        else
            COMPREPLY+=("${candidate%%$'\t'*}")
        fi
    done
}
complete -F _hotday hotday
