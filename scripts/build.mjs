/** Builds the page and the desktop shell. */
import { buildElectron, buildRenderer, installIfNeeded } from './bootstrap.mjs';

installIfNeeded();
buildRenderer();
buildElectron();
