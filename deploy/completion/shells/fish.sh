# fish: hotday completion fish | source in ~/.config/fish/config.fish
function __hotday_complete
    set -l words (commandline -opc) (commandline -ct)
    for candidate in ($words[1] complete -- $words[2..-1] 2>/dev/null)
        if test "$candidate" = :
            __fish_complete_path (commandline -ct)
        else
            echo $candidate
        end
    end
end
complete -c hotday -f -a '(__hotday_complete)'
