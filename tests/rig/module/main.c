// SPDX-License-Identifier: GPL-2.0
/* The parts put together, and taken apart in the opposite order. */
#include <linux/err.h>
#include <linux/module.h>

#include "rig.h"

static struct platform_device *owner;
static struct dentry *root;

static int __init rig_start(void)
{
	int error;

	owner = platform_device_register_simple(RIG_LABEL, PLATFORM_DEVID_NONE, NULL, 0);
	if (IS_ERR(owner))
		return PTR_ERR(owner);
	root = debugfs_create_dir("ingle_rig", NULL);
	rig_chips_files(root);
	error = rig_lines_add(owner, root);
	if (error)
		goto no_lines;
	error = rig_spi_add(owner, root);
	if (error)
		goto no_spi;
	error = rig_w1_add(root);
	if (error)
		goto no_w1;
	return 0;

no_w1:
	rig_spi_remove();
no_spi:
	rig_lines_remove();
no_lines:
	debugfs_remove_recursive(root);
	platform_device_unregister(owner);
	return error;
}

static void __exit rig_stop(void)
{
	rig_w1_remove();
	rig_spi_remove();
	rig_lines_remove();
	debugfs_remove_recursive(root);
	platform_device_unregister(owner);
}

module_init(rig_start);
module_exit(rig_stop);
MODULE_DESCRIPTION("Emulated kitchen probes for Ingle's tests");
MODULE_LICENSE("GPL");
