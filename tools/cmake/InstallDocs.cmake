# SPDX-License-Identifier: GPL-3.0-or-later
# Installs the man page and the shells' completions where man, bash and zsh look for them.
include(GNUInstallDirs)

install(FILES ${PROJECT_SOURCE_DIR}/docs/man/basefog.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
# bash-completion loads a command's completion from a file of the command's own name.
install(FILES ${PROJECT_SOURCE_DIR}/tools/completion/basefog.bash
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions
        RENAME basefog)
install(FILES ${PROJECT_SOURCE_DIR}/tools/completion/_basefog
        DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions)
