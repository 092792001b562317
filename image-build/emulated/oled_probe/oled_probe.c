// SPDX-License-Identifier: GPL-2.0
/*
 * For tests alone, never in the image: an I2C bus 1, as the emulated board has none, with something at one address that
 * takes all it is sent. What came is read from debugfs: each transfer as its length in two bytes, low byte first, then
 * its bytes.
 */
#include <linux/debugfs.h>
#include <linux/i2c.h>
#include <linux/module.h>
#include <linux/vmalloc.h>

#define ROOM (1 << 20)

static unsigned short address = 0x3c;
module_param(address, ushort, 0444);

static struct debugfs_blob_wrapper taken;
static struct dentry *file;

static int take(struct i2c_adapter *bus, struct i2c_msg *messages, int count)
{
	int k;

	for (k = 0; k < count; k++) {
		struct i2c_msg *one = &messages[k];
		u8 *to = taken.data + taken.size;

		if (one->addr != address || one->flags & I2C_M_RD)
			return -ENXIO;
		if (taken.size + 2 + one->len > ROOM)
			return -ENOSPC;
		to[0] = one->len & 0xff;
		to[1] = one->len >> 8;
		memcpy(to + 2, one->buf, one->len);
		taken.size += 2 + one->len;
	}
	return count;
}

static u32 can_do(struct i2c_adapter *bus)
{
	return I2C_FUNC_I2C | I2C_FUNC_SMBUS_EMUL;
}

static const struct i2c_algorithm algorithm = { .master_xfer = take, .functionality = can_do };

static struct i2c_adapter bus = {
	.owner = THIS_MODULE,
	.name = "oled probe",
	.algo = &algorithm,
	.nr = 1,
};

static int __init start(void)
{
	int error;

	taken.data = vzalloc(ROOM);
	if (!taken.data)
		return -ENOMEM;
	error = i2c_add_numbered_adapter(&bus);
	if (error) {
		vfree(taken.data);
		return error;
	}
	file = debugfs_create_blob("oled_probe", 0400, NULL, &taken);
	return 0;
}

static void __exit stop(void)
{
	debugfs_remove(file);
	i2c_del_adapter(&bus);
	vfree(taken.data);
}

module_init(start);
module_exit(stop);
MODULE_DESCRIPTION("Takes what an OLED on I2C would be sent");
MODULE_LICENSE("GPL");
