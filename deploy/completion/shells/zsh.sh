#compdef hotday
# zsh: eval "$(hotday completion zsh)" in ~/.zshrc
(( $+functions[compdef] )) || { autoload -Uz compinit && compinit }
_hotday() {
    local candidate
    local -a described
    for candidate in "${(@f)$("${words[1]}" complete -- "${(@)words[2,CURRENT]}" 2>/dev/null)}"; do
        if [[ $candidate == : ]]; then
            _files
        elif [[ -n $candidate ]]; then
            described+=("${${candidate%%$'\t'*}//:/\\:}:${candidate#*$'\t'}")
        fi
    done
    (( $#described )) && _describe hotday described
}
compdef _hotday hotday
