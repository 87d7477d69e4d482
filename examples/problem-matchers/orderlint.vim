" In Vim, :make reviews the order set in the window, and :copen lists what is found.
setlocal makeprg=orderlint\ review\ --format\ line\ %:S
setlocal errorformat=%f:%l:%c:\ %t%*[a-z]:\ %m,%-G%.%#
